"""The door to the page: `streamlit run app.py`. The page itself is `trackersim/page/app.py`."""

import streamlit as st

from trackersim.page.downloads import saves
from trackersim.page.guard import rules
from trackersim.page.runs import ears
from trackersim.page.table_address import tables
from trackersim.page.typeface import letters

app = st.App("trackersim/page/door.py", routes=[*letters(), *tables(), *saves(), *ears()], middleware=rules())
