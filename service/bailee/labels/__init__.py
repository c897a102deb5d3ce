"""Labels: QR and Code 128 at whole printer dots."""
