"""The command-line door. Enter at `cli.__main__`."""
