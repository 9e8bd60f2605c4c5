"""Every sentence, and every number as shown."""
