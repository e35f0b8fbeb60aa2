"""The page by the bowl: what it shows, and the small server that it comes from."""
