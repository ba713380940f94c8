"""Write arrangements and problems in forms other than PDF, a file each."""
