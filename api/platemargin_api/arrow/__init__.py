"""Requests and answers in columns (Apache Arrow): the extra ``platemargin[arrow]``, loaded with the first that is sent."""
