"""slidefit: the price slide and season of feeder calves from local sale records, and keep-or-sell on top of it."""
