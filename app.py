"""The door to the page: `streamlit run app.py`. The page itself is `trackersim/page/app.py`."""

import streamlit as st

from trackersim.page.addresses import addresses
from trackersim.page.guard import rules

app = st.App("trackersim/page/door.py", routes=addresses(), middleware=rules())
