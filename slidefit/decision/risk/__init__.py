"""What is not known: draws, odds, ranges of inputs, what would change the answer."""
