"""Trains the learned finder on rendered clumps: pictures -> crops -> network."""
