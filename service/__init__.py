"""The one road from a request to an answer, and the HTTP door. Enter at `service.answering`."""
