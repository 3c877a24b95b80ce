"""What streamlit runs for each visitor, again and again."""

from trackersim.page.app import main

main()
