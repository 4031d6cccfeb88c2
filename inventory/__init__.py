"""impression-stock: the impression supplies of a denture practice, ready, in date and traceable."""

__version__ = "0.1.0"
