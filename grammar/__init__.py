"""Listening: a driver's words become a reading. Enter at `grammar.reader`; the result types are in
`grammar.intent`."""
