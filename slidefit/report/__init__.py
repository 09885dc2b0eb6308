"""What people read: one document model, its renderers, its charts, and every sentence."""
