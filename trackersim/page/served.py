"""The page's server: streamlit's own, behind the rules of `guard`. `trackersim page` has streamlit run this file.

Whoever asks for it by another machine's name is refused, whatever is asked for, and no other page may frame it.
"""

from __future__ import annotations

from pathlib import Path

import streamlit as st

from trackersim.page.addresses import addresses
from trackersim.page.guard import rules

app = st.App(Path(__file__).with_name("door.py"), routes=addresses(), middleware=rules())
