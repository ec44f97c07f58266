"""Reading a book: text in, typed values and faults with their places out."""
