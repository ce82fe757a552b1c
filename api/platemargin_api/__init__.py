"""The HTTP service of platemargin: calculations as plug-ins, strict JSON in, auditable answers out."""
