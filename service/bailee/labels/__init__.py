"""Labels: QR codes at whole printer dots."""
