"""First floor: words and documents out. Codes and values come in, sentences in the reader's language go out."""
