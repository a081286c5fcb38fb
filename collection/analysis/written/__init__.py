"""What people write in their own spreadsheets: days, prices, amounts, readings, work and headings, in words of theirs.

Every function takes the text of a cell and returns what it means in the words of the book, with a doubt: a sentence
that says what was assumed, empty when nothing was. What cannot be read is Refused; nothing is guessed silently.
"""
