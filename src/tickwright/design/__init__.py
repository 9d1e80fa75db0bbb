"""Makes plans that do what is wanted: families of circuits with numbers to choose, and the chooser among them.

Imports up to `diagnose`.
"""
