"""Labels: QR codes, and the bars of a custody record, at whole printer dots."""
