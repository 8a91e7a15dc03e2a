"""The program's own icon, 32 by 32 units: two coils, the arrow in one against that in the other."""

from __future__ import annotations

from typing import Final

ICON: Final = (
    '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 32 32">'
    '<rect width="32" height="32" rx="6" fill="#1b4d89"/>'
    '<rect x="4" y="4" width="11" height="24" rx="5" fill="#fff"/>'
    '<rect x="17" y="4" width="11" height="24" rx="5" fill="#fff"/>'
    '<path d="M9.5 25V12M22.5 7v13" stroke="#111" stroke-width="2.6"/>'
    '<path d="M9.5 7l4 6.5h-8zM22.5 25l4-6.5h-8z" fill="#111"/>'
    "</svg>"
)
"""Of our own drawing: it needs no colour to be told, and no network to be shown."""
