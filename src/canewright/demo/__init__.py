"""The invented demonstration factories and their seasons."""
