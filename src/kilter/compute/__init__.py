"""Long work in chunks: by processes of this machine or by a Dask cluster, resumable, the same to the bit."""
