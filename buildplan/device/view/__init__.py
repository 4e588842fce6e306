"""What the camera and the distance sensor see past the printed parts and the moving lid."""
