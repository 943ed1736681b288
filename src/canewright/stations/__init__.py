"""Stations, one per file. Every module in this folder is found by itself."""
