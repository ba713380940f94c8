"""Texts and what is said of them: named text with spans, messages as data, what may reach a terminal."""
