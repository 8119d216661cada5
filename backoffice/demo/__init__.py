"""The demo practice: what is true of its years, and how it is told to the services."""

from backoffice.demo.builder import SMALL, Builder, Size, build, span

__all__ = ["SMALL", "Builder", "Size", "build", "span"]
