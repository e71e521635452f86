"""Tables and crops only; the entry point names the folder, and nothing here is run."""
