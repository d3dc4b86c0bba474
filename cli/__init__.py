"""The command line: parses, calls, echoes."""
