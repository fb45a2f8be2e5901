"""What is shown: pictures that take results, never solve."""
