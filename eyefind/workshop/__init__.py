"""For makers only: render clumps with exact truth, train, evaluate.

Needs the extra ``workshop`` (PyTorch).
"""
