"""The run: stages and marks, alarms and advice, and the monitor that joins them."""
