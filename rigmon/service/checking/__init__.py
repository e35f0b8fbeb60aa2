"""`rigmon check`: from port to forecast, what works and what to do."""
