"""What is typed into the page: forms, addresses and the numbers in them."""
