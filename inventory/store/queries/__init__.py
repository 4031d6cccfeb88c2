"""Read models: every query of the program, a module per subject; frozen values, or rows of one unit of work."""
