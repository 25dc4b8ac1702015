"""What is sent to begin a job."""

SHEET = """\
garden,bed,season,crop
Plot 1,kiln,2026,kale
Plot 1,kiln,2027,cabbage
Plot 2,quay,2027,cabage
Plot 3,quay,2027,leek
"""
PLANS = """\
{"type": "site", "garden": {"latitude": 46.2, "country": "FR"}}
{"garden": {"name": "Plot 1"}, "beds": [{"id": "kiln"}, {"id": "quay"}], "wishes": {"crops": [{"crop": "leek"}]}}
[1]
{"garden": {"name": "Plot 3"}, "beds": [{"id": "kiln"}], "wishes": {"crops": [{"crop": "leak"}]}}
"""
BATCH = "/v1/jobs?kind=batch&season=2027&country=FR"
