"""The methods of analysis: each file declares one, or a tight family."""
