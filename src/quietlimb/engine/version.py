"""The engine's version: it is named beside every result, and rises whenever a number may move."""

ENGINE_VERSION = "0.1.0"
