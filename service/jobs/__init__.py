"""Long work over many gardens: jobs in chunks, claimed from the database by whoever is free.

``jobs`` and ``chunks`` hold what is true (rows); ``slot`` is the process that works through a chunk,
``crew`` claims chunks for its slots; ``local`` runs a crew by itself, ``cluster`` lets Celery wake it.
"""
