"""The door of an installed page: `trackersim page` has streamlit run this file."""

from trackersim.page.app import main

main()
