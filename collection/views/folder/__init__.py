"""The folder of CSV files as the book would write it: the form of every file, and its rows out of the book."""
