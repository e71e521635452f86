"""What goes over the wire: submissions in, interpretations out, problems when a request is at fault. No Flask here."""
