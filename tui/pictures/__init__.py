"""Pictures drawn in text: pure functions from a reading to lines, each with the same told in sentences.

Nothing in them depends on colour, every sign is one cell wide, and 78 cells are enough. Screens and commands share
them; what a picture shows is told beside it for whoever hears the screen instead of seeing it.
"""
