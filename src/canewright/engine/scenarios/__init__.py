"""Thousands of scenarios of one factory in one call, each checked."""
