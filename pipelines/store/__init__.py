"""The engine and the folder: the one module that knows the engine, relations, the book, and the SQL."""
