"""The command line: read what was typed, call one function, show what it gave."""
