"""One module a step; what is released is never changed."""
