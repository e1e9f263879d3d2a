"""Pydantic models of everything that is read or written as text, turned into frozen core values."""
