"""Cents on temperature and playing time: the warm-up, the methods, what stands beside them."""
