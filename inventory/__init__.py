"""impression-stock: the impression supplies of a denture practice, ready, in date and traceable."""
