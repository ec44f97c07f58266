"""One module per kind of page: what it shows, as values for its template."""
