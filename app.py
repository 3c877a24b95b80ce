"""The door to the page: `streamlit run app.py`. The page itself is `trackersim/page/app.py`."""

from trackersim.page.app import main

main()
