"""The app: server-rendered pages that work without JavaScript, on a phone and at a desk."""
