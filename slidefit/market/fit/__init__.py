"""From lots to the slide: estimation within sales."""
