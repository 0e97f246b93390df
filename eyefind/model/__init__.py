"""The learned finder's network: weights, their hash, and how to ask it."""

from eyefind.model.network import Answers, ModelError, ask, facts

__all__ = ["Answers", "ModelError", "ask", "facts"]
