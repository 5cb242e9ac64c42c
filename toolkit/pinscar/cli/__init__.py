"""The command: parse, one library call, print."""
