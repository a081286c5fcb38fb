"""Bringing in the folder of CSV files: rows already read are compared with the book, then written as one act.

``tables`` is what a reader hands over, ``plan`` compares it with the book and changes nothing, ``write`` is the act.
One module per subject says what its files mean.
"""
