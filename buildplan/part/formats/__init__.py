"""One reader per file format: bytes in, a RawMesh or one clear MeshError out."""
