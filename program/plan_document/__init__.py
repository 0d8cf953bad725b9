"""The replacement plan as a document: its elements, and its pages."""
