"""A plan: what is written by hand about calves, feed, money and selling."""
