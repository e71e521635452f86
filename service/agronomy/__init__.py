"""The pure floor: a sample, its results and the tables go in, an interpretation comes out.

Nothing here reads a file, the clock, the environment or a random number.
No sentence is written here either: the core answers in codes and values, and `service.render` finds the words.
"""
