"""Tests of the laboratory's arithmetic."""
