"""One module per command, loaded only when it is called."""
