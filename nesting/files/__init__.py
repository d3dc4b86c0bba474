"""The edge to the disk: jobs and plans read and written, lists for the bench and the shop."""
