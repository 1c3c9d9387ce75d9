"""The application: engine, sessions, command line, window and reports."""
