"""Heat: will it get out, of the box, of the parts, of what holds them?

``shape`` holds the tables, ``inputs`` makes a ``box`` with its parts of them, ``network`` finds its
one balance, ``transient`` the way there, ``answers`` what would mend it, ``study`` runs all.
"""
