"""The demo: an invented aquarium and university, told up to today by the site's own deeds."""
