"""From amounts of nutrients to materials: what is needed, what may be used, how much of it, in bags and cups."""
