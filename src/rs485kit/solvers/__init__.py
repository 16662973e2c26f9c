"""Numerical kernels: SI float arrays in, SI float arrays out. They know nothing of buses, units or rules."""
