"""The command line: one file per command, and the helpers they share.

`main.py` is the entry point and holds the list of commands. `NAME_command.py` holds one
command each, with a function `register(app)`; what a command computes with is imported
inside it, so that asking for help or for a formula does not load a solver. `printing.py`
is how anything reaches the screen, `problems.py` how an error becomes a sentence.
"""
